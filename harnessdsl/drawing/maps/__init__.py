"""Where everything lives: locator maps, box views, connector faces, places with their photos."""
