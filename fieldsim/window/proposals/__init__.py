"""Runs proposed on a field: click where it starts and where it is to go; what is found can be taken over as a file."""
