"""A value of the model put into the text of a file that people wrote: only what differs is touched.

Two things: how a value is written (`plain`), and how the text of a file is changed into that of another value
(`kept`). The second works on places in the text: each changed number is put in the place of the old one, and the lines
of a list's item are moved, left out or put in as a block, with the comments that belong to it.
"""

from fieldsim.files.keeping.edits import kept
from fieldsim.files.keeping.matching import aligned
from fieldsim.files.keeping.places import CannotKeepError
from fieldsim.files.keeping.plain import fresh, number_text, plain_record, text_of

__all__ = ["CannotKeepError", "aligned", "fresh", "kept", "number_text", "plain_record", "text_of"]
