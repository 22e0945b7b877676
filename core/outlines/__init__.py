"""What a maker drew: path data, SVG and polygons as shapes in the piece's own frame, and outlines to edit."""
