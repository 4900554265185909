"""Pages for whoever stands at the bed: home, the alarms, their pictures and sheets of paper."""
