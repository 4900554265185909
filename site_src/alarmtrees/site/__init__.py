"""The pages of the site, and all else that a browser is given."""
