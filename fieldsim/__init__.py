"""fieldsim: test a robot's run plan without the table."""

__version__ = "0.1.0"
