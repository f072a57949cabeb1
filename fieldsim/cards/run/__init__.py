"""The card of a run: values, words, text, a page of HTML, sheets of paper."""
