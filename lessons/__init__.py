"""What is taught, shown and asked; free of Qt and of drawing."""
