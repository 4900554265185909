"""What is computed on trees: ways, causes, safety rules, rests, times; and what was shown by it."""
