"""The body as tables, curves and surfaces, and the questions asked of it."""
