"""The card of a match: values, words, a page of HTML, a sheet of paper."""
