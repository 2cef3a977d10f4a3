"""The page: its HTML, style and scripts, served as they are."""
