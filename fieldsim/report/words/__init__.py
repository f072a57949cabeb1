"""The words of each study."""
