"""Pages of the job around the alarms: articles, words, sources, numbers, calculators, traces."""
