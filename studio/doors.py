"""Who may open what: one table, and the doorkeeper that asks it before any view runs.

Each app lists its own pages in `doors.py` as `DOORS`, by the name of the view with its namespace. A page that
no row names is shut, so a forgotten row is seen at once and nothing is open by mistake.
"""

from dataclasses import dataclass
from functools import cache
from importlib import import_module
from urllib.parse import urlsplit

from django.apps import apps
from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.http import HttpResponseNotAllowed, JsonResponse
from django.shortcuts import render
from django.utils.module_loading import module_has_submodule
from django_htmx.http import HttpResponseClientRedirect

from studio.models import Role
from studio.views.errors import wants_json

OWNERS = frozenset({Role.OWNER})
MAKERS = frozenset({Role.OWNER, Role.MAKER})
LOGGERS = frozenset({Role.OWNER, Role.MAKER, Role.HELPER})
COSTS = MAKERS
RECIPES = frozenset({Role.OWNER, Role.MAKER, Role.VIEWER})
EVERYONE = frozenset(Role)  # who is signed in
PUBLIC = EVERYONE | {None}  # who is not signed in as well
NOBODY = frozenset()  # there is no such thing to do here

READING = ("GET", "HEAD", "OPTIONS")


@dataclass(frozen=True)
class Door:
    """Which roles may look at a page (GET, HEAD) and which may send something to it.

    `own`: a page about the account itself. It is shut on a trusted phone until somebody has said their password.
    """

    read: frozenset
    write: frozenset = NOBODY
    own: bool = False

    def who(self, method):
        return self.read if method in READING else self.write

    def lets(self, person, method):
        """Whether it is open to this person who is signed in."""
        return person.role_here in self.who(method) and not (self.own and person.on_phone)


DOORS = {
    "home": Door(read=EVERYONE),
    "studio:sign-in": Door(read=PUBLIC, write=PUBLIC),
    "studio:sign-out": Door(read=NOBODY, write=EVERYONE),
    "studio:set-up": Door(read=PUBLIC, write=PUBLIC),
    "studio:account": Door(read=EVERYONE, write=EVERYONE, own=True),
    "studio:account-sign-out": Door(read=NOBODY, write=EVERYONE, own=True),
    # a phone at the sink: trusted by an owner; who dyes there is said by touching a name
    "studio:who": Door(read=NOBODY, write=PUBLIC),
    "studio:phone-trust": Door(read=OWNERS, write=OWNERS, own=True),
    "studio:phone-stop": Door(read=NOBODY, write=OWNERS, own=True),
    "studio:people": Door(read=OWNERS),
    "studio:person-new": Door(read=OWNERS, write=OWNERS),
    "studio:person": Door(read=OWNERS, write=OWNERS),
    "studio:person-password": Door(read=OWNERS, write=OWNERS),
    "studio:person-sign-out": Door(read=NOBODY, write=OWNERS),
    "studio:studio": Door(read=EVERYONE, write=OWNERS),
    "studio:first": Door(read=OWNERS, write=OWNERS),
    "studio:cautions": Door(read=EVERYONE),
    "studio:picture": Door(read=EVERYONE),
    "studio:sound": Door(read=EVERYONE),
    "studio:document": Door(read=EVERYONE),
    # the shelf: everyone looks, those who dye count and make up bottles, makers keep it
    "studio:base": Door(read=EVERYONE),
    "studio:dye": Door(read=EVERYONE),
    "studio:assistant": Door(read=EVERYONE),
    "studio:solution": Door(read=EVERYONE),
    "studio:bench": Door(read=EVERYONE),
    "studio:lot": Door(read=EVERYONE),
    "studio:measure": Door(read=EVERYONE, write=LOGGERS),
    "studio:lot-count": Door(read=LOGGERS, write=LOGGERS),
    "studio:count": Door(read=LOGGERS, write=LOGGERS),
    "studio:solution-new": Door(read=LOGGERS, write=LOGGERS),
    "studio:delivery": Door(read=COSTS),
    "studio:base-new": Door(read=MAKERS, write=MAKERS),
    "studio:base-edit": Door(read=MAKERS, write=MAKERS),
    "studio:dye-new": Door(read=MAKERS, write=MAKERS),
    "studio:dye-edit": Door(read=MAKERS, write=MAKERS),
    "studio:assistant-new": Door(read=MAKERS, write=MAKERS),
    "studio:assistant-edit": Door(read=MAKERS, write=MAKERS),
    "studio:solution-edit": Door(read=MAKERS, write=MAKERS),
    "studio:vessel-new": Door(read=MAKERS, write=MAKERS),
    "studio:vessel": Door(read=MAKERS, write=MAKERS),
    "studio:tool-new": Door(read=MAKERS, write=MAKERS),
    "studio:tool": Door(read=MAKERS, write=MAKERS),
    "studio:measure-new": Door(read=MAKERS, write=MAKERS),
    "studio:measure-edit": Door(read=MAKERS, write=MAKERS),
    "studio:delivery-new": Door(read=MAKERS, write=MAKERS),
    "studio:opening": Door(read=MAKERS, write=MAKERS),
    "studio:lot-correct": Door(read=MAKERS, write=MAKERS),
    "studio:lot-waste": Door(read=MAKERS, write=MAKERS),
    "studio:lot-undo": Door(read=MAKERS, write=MAKERS),
    # what a phone keeps of the program, and whose entries it may send
    "studio:worker": Door(read=PUBLIC),
    "studio:shell": Door(read=PUBLIC),
    "studio:manifest": Door(read=PUBLIC),
    "studio:signed-in": Door(read=EVERYONE),
    "studio:healthz": Door(read=PUBLIC),
    "studio:readyz": Door(read=PUBLIC),
}


def our_modules(name):
    """The modules called `name` of the apps that list their doors: this program's own."""
    for app in apps.get_app_configs():
        if module_has_submodule(app.module, "doors") and module_has_submodule(app.module, name):
            yield import_module(f"{app.name}.{name}")


@cache
def table():
    """Every app's rows as one: view name -> Door."""
    rows = {}
    for module in our_modules("doors"):
        if twice := rows.keys() & module.DOORS.keys():
            raise LookupError(f"Two apps list the same page in doors.py: {', '.join(sorted(twice))}.")
        rows |= module.DOORS
    return rows


def allows(person, view_name, method="GET"):
    """Whether this person (anonymous too) may do that. A page without a row is shut to all."""
    door = table().get(view_name)
    if door is None or not person.is_authenticated:
        return door is not None and None in door.who(method)
    return door.lets(person, method)


class DoorMiddleware:
    """Asks the table before each view. What is true of one row of a page, such as whose it is, the view asks."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_view(self, request, view, args, kwargs):
        door = table().get(request.resolver_match.view_name, SHUT)
        who = door.who(request.method)
        if None in who:
            return None
        if not request.user.is_authenticated:
            return ask_to_sign_in(request)
        if door.lets(request.user, request.method):
            return None
        if not who and door is not SHUT:
            return HttpResponseNotAllowed(READING if door.read else ["POST"])
        return refuse(request, who)


SHUT = Door(read=NOBODY)
PASSWORD_FIRST = "This is not for a name that was only touched. Sign in with your password, if your role may open it."


def ask_to_sign_in(request):
    """For a person the sign-in page, and then back to where they were; for a machine 401."""
    if wants_json(request):
        return JsonResponse({"error": "signed_out", "sentence": "Sign in again, then send this."}, status=401)
    back_to = request.get_full_path()
    if request.method not in READING:
        messages.error(
            request,
            "You were signed out, so what you sent was not stored. Sign in, and send it again from its page.",
        )
        back_to = page_before(request)
    if request.htmx:
        return HttpResponseClientRedirect(redirect_to_login(request.htmx.current_url_abs_path or "/").url)
    return redirect_to_login(back_to)


def page_before(request):
    """The address within the studio that the browser says it comes from; the first page where it says none."""
    try:
        return urlsplit(request.headers.get("Referer", "")).path or "/"
    except ValueError:
        return "/"


def refuse(request, who):
    sentence = PASSWORD_FIRST if request.user.on_phone else who_may(who)
    if wants_json(request):
        return JsonResponse({"error": "not_allowed", "sentence": sentence}, status=403)
    return render(request, "403.html", {"sentence": sentence}, status=403)


def who_may(who):
    """The sentence for somebody who stands before a shut door."""
    roles = [f"{role.value}s" for role in Role if role in who]
    if not roles:
        return "Nobody may open this page."
    if roles == ["owners"]:
        return "Only the studio's owner may do this: ask them to do it, or for that role."
    named = f"{', '.join(roles[:-1])} and {roles[-1]}" if len(roles) > 1 else roles[0]
    return f"Only {named} may do this. The studio's owner can give you that role."
