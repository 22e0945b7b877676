"""Where pictures are taken: camera, light, ground and wall of each view; words and lines on a picture."""
