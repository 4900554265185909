"""Pages for learners and their teachers: path, record, practice, slides."""
