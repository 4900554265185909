"""Every rule over a library, and its findings told."""
