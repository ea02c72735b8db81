"""Where everything lives: locator maps, box views, connector faces, harness runs, places with their
photos; as pages, and as lines of text for a terminal."""

from harnessdsl.drawing.maps.as_text import (
    access_text,
    box_text,
    connector_text,
    damage_text,
    locate_text,
    map_text,
    runs_text,
)
from harnessdsl.drawing.maps.box_view import boxes, draw_box
from harnessdsl.drawing.maps.connector_face import draw_connector
from harnessdsl.drawing.maps.map_pages import draw_maps
from harnessdsl.drawing.maps.pictures import Pictures
from harnessdsl.drawing.maps.place_card import draw_place
from harnessdsl.drawing.maps.run_pages import draw_damage, draw_runs

__all__ = [
    "Pictures",
    "access_text",
    "box_text",
    "boxes",
    "connector_text",
    "damage_text",
    "draw_box",
    "draw_connector",
    "draw_damage",
    "draw_maps",
    "draw_place",
    "draw_runs",
    "locate_text",
    "map_text",
    "runs_text",
]
