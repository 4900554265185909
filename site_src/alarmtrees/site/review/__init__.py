"""Pages for whoever answers for the library: rules, checks, reviews."""
