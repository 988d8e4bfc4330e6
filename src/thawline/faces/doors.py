"""What each address asks of whoever opens it: an action, or nothing; what does not stand here opens to nobody."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from thawline.services.permissions import Action

OPEN = "open"  # before anybody is signed in
_OPEN = (
    "account_login", "mfa_login_webauthn", "web:begin", "web:cautions", "web:https", "web:join", "calendar:read",
)  # fmt: skip
_ACTIONS: dict[Action, tuple[str, ...]] = {
    "look": (
        "web:now", "web:stock", "web:milk", "web:history", "web:entry", "web:entry_any", "web:guidelines", "web:paper",
        "web:more", "web:plan", "web:heat", "web:heat_thaw", "web:heat_freeze", "web:heat_warm", "web:heat_cool",
        "web:heat_measure", "web:trip", "web:trip_list", "web:trip_air", "web:power", "web:power_sheet", "web:wait",
        "web:storage_changes", "web:labels", "sheets:labels", "sheets:blank_labels", "web:hand_over_sheet",
        "sheets:hand_over", "web:calendar", "web:reminders", "web:reminders_test", "web:kit", "web:holding",
    ),
    "note": (
        "web:log", "web:milk_do", "web:many", "web:undo", "web:paper_enter", "web:trip_pack",
        "web:trip_arrive", "web:power_off", "web:power_on", "web:power_fill", "web:power_room", "web:power_times",
        "web:power_look", "web:power_warming", "web:power_silence", "web:plan_done",
        "web:hand_over", "web:hand_over_back", "web:kit_done",
    ),
    "check": ("web:check", "web:check_done", "web:mix_up"),
    "supply": ("web:outlook", "web:outlook_day", "web:outlook_weight", "web:session", "web:pattern", "web:take_out",
               "web:table", "web:health_record", "sheets:summary", "sheets:bank_log"),
    "settle": (
        "web:enter", "web:paste", "web:bring_in", "web:entry_correct", "web:entry_any_correct", "web:switch",
        "web:settings", "web:settings_household", "web:settings_feeding", "web:settings_place", "web:settings_child",
        "web:readings", "web:readings_record", "web:habits", "web:habits_way", "web:habits_goal", "web:habits_rest",
        "web:habits_apart", "web:settings_labels", "web:kit_children", "web:settings_measured",
        "web:settings_power", "web:who",
    ),
    "invite": ("web:settings_people", "web:invite", "web:member", "web:services", "web:service"),
    "own": ("web:export", "web:erase"),
    "serve": ("web:care", "web:care_home", "web:care_milk", "web:care_do", "web:care_undo", "web:care_sheet",
              "web:care_day", "sheets:care_sheet"),
    "self": (
        "account_logout", "account_change_password", "account_set_password", "account_reauthenticate",
        "mfa_list_webauthn",
        "mfa_add_webauthn", "mfa_remove_webauthn", "mfa_edit_webauthn", "mfa_reauthenticate_webauthn", "web:phones",
        "web:homes", "web:label",
    ),
}  # fmt: skip
DOORS: Mapping[str, str] = MappingProxyType(
    {name: str(action) for action, names in _ACTIONS.items() for name in names} | dict.fromkeys(_OPEN, OPEN)
)
