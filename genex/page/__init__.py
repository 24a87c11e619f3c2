"""The practice page: a lesson that plays, in one HTML file that asks for nothing from outside.

``document.page_html`` is the door. The page is a view of scores as every exporter is one. Sound comes
from the recordings of the soundfont (``sounds``), scheduled in the browser by the modules of
``app/``; what is seen comes from ``lesson`` and ``engraved``.
"""
