"""Pictures as inline SVG, each with a title, a description, and a text that says the same.

Shapes are placed here and written by a template for each picture. Nothing needs colour: what differs, differs by
pattern and by words. The same input gives the same bytes.
"""

from kb.report.pictures.drawing import Picture

__all__ = ["Picture"]
