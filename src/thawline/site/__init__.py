"""The outermost room: settings, and the joining of the parts."""
