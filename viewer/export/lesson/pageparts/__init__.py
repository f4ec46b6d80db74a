"""The parts of the page of a lesson: what is put into it, and the files that it is made of."""
