"""The blank sheet for a robot's tests: values, words, a page of HTML, sheets of paper."""
