"""Poses from pictures: markers found, the camera solved for, what spoils a picture, rows for sheets and logs."""
