"""The sheets of printed markers: values, words, paper at its true size."""
