"""Where each face answers."""

from __future__ import annotations

from allauth.account import views as account
from django.urls import include, path

from thawline.faces.web.views import passkeys

urlpatterns = [
    path("sign-in/", account.login, name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    path("password/", account.password_change, name="account_change_password"),
    path("password/first/", passkeys.password_set, name="account_set_password"),
    path("again/", account.reauthenticate, name="account_reauthenticate"),
    path("again/passkey/", passkeys.again, name="mfa_reauthenticate_webauthn"),
    path("sign-in/passkey/", passkeys.login, name="mfa_login_webauthn"),
    path("passkeys/", passkeys.listed, name="mfa_list_webauthn"),
    path("passkeys/add/", passkeys.add, name="mfa_add_webauthn"),
    path("passkeys/<int:pk>/name/", passkeys.edit, name="mfa_edit_webauthn"),
    path("passkeys/<int:pk>/remove/", passkeys.remove, name="mfa_remove_webauthn"),
    path("print/", include("thawline.faces.sheets.urls")),
    path("calendar/", include("thawline.faces.calendar.urls")),
    path("", include("thawline.faces.web.urls")),
]

handler400 = "thawline.faces.web.errors.bad_request"
handler403 = "thawline.faces.web.errors.forbidden"
handler404 = "thawline.faces.web.errors.not_found"
handler500 = "thawline.faces.web.errors.server_error"
