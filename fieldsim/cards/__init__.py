"""Paper for the table: the run's card, the match's card, blank test sheets."""
