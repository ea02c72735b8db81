"""Checks drawings from the finished SVG alone: a browser measures, plain geometry judges.

Nothing here reads the layout or the scene. What a shape stands for is known only from the classes
and data- attributes in the SVG:

- `wire` data-wire data-from data-to; `part` data-part; `terminal` data-node;
- `label` data-of; `wire-label` data-of; `plug` data-part data-cavity; `splice` data-node;
  `earth` data-node; `reference` data-node;
- on maps `place` data-place, `leader` data-place, `callout` data-place (or of another thing:
  `part-leader` data-part), each with data-view where a sheet has several views.
"""
