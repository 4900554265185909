"""Files of a library, read into the model."""
