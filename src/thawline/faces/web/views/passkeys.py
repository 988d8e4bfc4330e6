"""One's own passkeys: add, name, remove, and show one once more; the library's views with pages of our own."""

from __future__ import annotations

from typing import Any

from allauth.account.decorators import reauthentication_required
from allauth.account.views import password_set as plain_password_set
from allauth.mfa.webauthn.views import (
    AddWebAuthnView,
    EditWebAuthnView,
    ListWebAuthnView,
    LoginWebAuthnView,
    ReauthenticateWebAuthnView,
    RemoveWebAuthnView,
)
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.forms import Form
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse, reverse_lazy
from django.utils.translation import gettext as _

from thawline.services import passkeys

_NOT_MADE = "The passkey was not made. Try it once more."
_NOT_OPENED = "That passkey did not open this. Try it once more, or sign in with your password."


class _Answered:
    """A form whose answer of a phone is looked at before the library takes it apart."""

    def post(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        """What can't be a phone's answer goes the way of a wrong one."""
        if not passkeys.plausible(request.POST.get("credential", "")):
            refused: HttpResponse = self.form_invalid(Form())  # type: ignore[attr-defined]
            return refused
        answer: HttpResponse = super().post(request, *args, **kwargs)  # type: ignore[misc]
        return answer


class List(ListWebAuthnView):  # type: ignore[misc]  # ships no types
    """The passkeys that somebody has."""

    def get_context_data(self, **kwargs: object) -> dict[str, Any]:
        """Whether one may go."""
        return {**super().get_context_data(**kwargs), "last": passkeys.is_last_way(self.request)}


class Add(_Answered, AddWebAuthnView):  # type: ignore[misc]
    """Make a passkey on this phone."""

    success_url = reverse_lazy("mfa_list_webauthn")

    def get_context_data(self, **kwargs: object) -> dict[str, Any]:
        """What the phone is asked for."""
        name = self.get_form_class()(user=self.request.user).initial["name"]
        return {"options": passkeys.to_make(self.request.user.pk), "name_now": name, **kwargs}

    def get_success_url(self) -> str:
        """To the list."""
        return str(self.success_url)

    def form_invalid(self, form: Form) -> HttpResponse:  # noqa: ARG002  (the caller names it)
        """Another try, under another challenge."""
        messages.error(self.request, _(_NOT_MADE))
        return HttpResponseRedirect(reverse("mfa_add_webauthn"))


class Remove(RemoveWebAuthnView):  # type: ignore[misc]
    """Take a passkey off, but never the only way in."""

    def get_context_data(self, **kwargs: object) -> dict[str, Any]:
        """Whether it may go."""
        return {**super().get_context_data(**kwargs), "last": passkeys.is_last_way(self.request)}

    def form_valid(self, form: Form) -> HttpResponse:
        """Gone, unless nothing else would open."""
        if passkeys.is_last_way(self.request):
            return HttpResponseRedirect(reverse("mfa_list_webauthn"))
        answer: HttpResponse = super().form_valid(form)
        return answer


class Reauthenticate(_Answered, ReauthenticateWebAuthnView):  # type: ignore[misc]
    """Show a passkey once more before something that matters."""

    def get_context_data(self, **kwargs: object) -> dict[str, Any]:
        """What the phone is asked for."""
        found = super().get_context_data(**kwargs)
        return {**found, "options": passkeys.to_show(self.request.user)}

    def form_invalid(self, form: Form) -> HttpResponse:  # noqa: ARG002  (the caller names it)
        """Another try."""
        messages.error(self.request, _(_NOT_OPENED))
        return HttpResponseRedirect(self.request.get_full_path())


class Login(_Answered, LoginWebAuthnView):  # type: ignore[misc]
    """Sign in with a passkey; asked by script, it says what the phone has to know."""

    def form_invalid(self, form: Form) -> HttpResponse:  # noqa: ARG002  (the caller names it)
        """Back to the sign-in, which says so."""
        messages.error(self.request, _(_NOT_OPENED))
        return HttpResponseRedirect(reverse("account_login"))


listed = List.as_view()
add = Add.as_view()
remove = Remove.as_view()
edit = EditWebAuthnView.as_view()
again = Reauthenticate.as_view()
login = login_not_required(Login.as_view())
# A first password is another way in: whoever holds the phone has to show the passkey first.
password_set = reauthentication_required(app="allauth.mfa")(plain_password_set)
