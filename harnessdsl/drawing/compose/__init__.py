"""Stands the symbols of one part side by side and joins them: from elements to a block."""
