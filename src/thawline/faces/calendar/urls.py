"""The secret addresses under which a calendar is read."""

from __future__ import annotations

from thawline.faces.calendar import read

app_name = "calendar"
urlpatterns = read.routes
