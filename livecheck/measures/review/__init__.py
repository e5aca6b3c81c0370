"""The review: what many repetitions of one cell say, as functions over one table of tries."""
