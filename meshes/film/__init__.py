"""A radiograph of a body: what a beam meets, what passes, what the detector makes of it."""
