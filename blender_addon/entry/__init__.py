"""Where Blender and the command line come in: what is registered, and commands."""
