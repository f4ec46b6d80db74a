"""What leaves the program as files."""
