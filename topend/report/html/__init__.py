"""The bench card and the assembly sheet as pages: one HTML file each, with nothing to fetch. By Jinja2 (extra `report`)."""

from topend.report.html.page import card_page, sheet_page, write_page

__all__ = ["card_page", "sheet_page", "write_page"]
