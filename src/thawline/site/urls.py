"""Where each face answers."""

from __future__ import annotations

from allauth.account import views as account
from django.urls import include, path

urlpatterns = [
    path("sign-in/", account.login, name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    path("password/", account.password_change, name="account_change_password"),
    path("again/", account.reauthenticate, name="account_reauthenticate"),
    path("print/", include("thawline.faces.sheets.urls")),
    path("calendar/", include("thawline.faces.calendar.urls")),
    path("", include("thawline.faces.web.urls")),
]

handler400 = "thawline.faces.web.errors.bad_request"
handler403 = "thawline.faces.web.errors.forbidden"
handler404 = "thawline.faces.web.errors.not_found"
handler500 = "thawline.faces.web.errors.server_error"
