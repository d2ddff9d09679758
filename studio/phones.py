"""Who is dyeing: on a phone that an owner has trusted, names are touched and no password is said.

Such a phone holds a key in a cookie. Touching a name opens the phone's own session: that of the owner who trusted it,
so that one phone has one session whoever stands there, with the phone's key in `phone` and the chosen person's in
`by`. Everybody in it is a helper (`Person.on_phone`), whoever they are and whoever trusted the phone, until they sign
in with their password. The trust is asked about anew in every request, so its end is the end of those sessions too.
"""

import logging
from functools import cached_property, partial

from django.conf import settings
from django.contrib import auth
from django.contrib.auth.models import AnonymousUser
from django.middleware.csrf import rotate_token
from django.utils.cache import add_never_cache_headers
from django.utils.functional import SimpleLazyObject

from studio.models import Person, Phone

log = logging.getLogger(__name__)

COOKIE = "__Host-phone" if settings.HTTPS else "phone"
COOKIE_AGE = 400 * 24 * 60 * 60  # the longest a browser keeps one; begun anew with every name that is touched
PHONE, BY, LATELY, SINCE = "phone", "by", "lately", "by_since"  # in the session
BACKEND = "django.contrib.auth.backends.ModelBackend"
SHOWN = 4  # so many names stand on the sink page; more are folded away
LATELY_KEPT = SHOWN


class Who:
    """Who is at this device, as far as is known; each answer is looked up when it is first asked for."""

    def __init__(self, request, signed_in):
        self.request, self.signed_in = request, signed_in

    @cached_property
    def phone(self):
        """The trusted phone that this is, or None. Costs a query where there is a key."""
        key = self.request.COOKIES.get(COOKIE, "")
        return Phone.objects.with_key(key) if 0 < len(key) <= 100 else None

    @cached_property
    def person(self):
        """Whose session it is, as `request.user`; nobody where the phone's own session is no longer good."""
        person = self.signed_in()
        if not person.is_authenticated or PHONE not in self.request.session:
            return person
        if not self._holds(person):
            self.request.session.flush()
            return AnonymousUser()
        return on_phone(person)

    def _holds(self, owner):
        session = self.request.session
        of_this_phone = self.phone is not None and (self.phone.pk, self.phone.by_id) == (session[PHONE], owner.pk)
        return of_this_phone and self._touched is not None

    @cached_property
    def _touched(self):
        return Person.objects.who_dye().filter(pk=self.request.session.get(BY)).first()

    @property
    def by_touch(self):
        """Whether this is the phone's own session, in which everybody is a helper."""
        return self.person.is_authenticated and self.person.on_phone

    @cached_property
    def dyeing(self):
        """Who is dyeing: the name that was touched, or else who signed in."""
        return on_phone(self._touched) if self.by_touch else self.person

    def named(self, key):
        """Who did what is sent now: in the phone's own session the one it names, if they dye here; else `dyeing`."""
        said = str(key or "")
        if not self.by_touch or said in ("", str(self.dyeing.pk)) or not _is_key(said):
            return self.dyeing
        found = Person.objects.who_dye().filter(pk=said).first()
        return on_phone(found) if found else self.dyeing

    # --- the names to touch

    @cached_property
    def names(self):
        """Everybody whose name may be touched here, by name; nobody on a phone that is not trusted."""
        return list(Person.objects.who_dye()) if self.phone else []

    @cached_property
    def _parted(self):
        if len(self.names) <= SHOWN + 1:
            return self.names, []
        lately = [self.dyeing.pk, *self.request.session.get(LATELY, [])]
        first = sorted(self.names, key=lambda one: lately.index(one.pk) if one.pk in lately else len(lately))[:SHOWN]
        return [one for one in self.names if one in first], [one for one in self.names if one not in first]

    @property
    def shown(self):
        return self._parted[0]

    @property
    def folded(self):
        return self._parted[1]

    @property
    def since(self):
        """When the name was touched, or the person signed in, in seconds: what a phone remembers is older or newer."""
        signed_in = getattr(self.person, "last_login", None)
        return self.request.session.get(SINCE, 0) if self.by_touch else signed_in.timestamp() if signed_in else 0


def _is_key(text):
    return text.isascii() and text.isdecimal() and len(text) < 18


def on_phone(person):
    """The same person, seen as a helper in this request. Nothing of it is ever stored."""
    person.on_phone = True
    return person


def who_is_here(get_response):
    """Middleware, right after the one that knows the session's person.

    `request.user` is whose session it is, `request.dyeing` who is dyeing, `request.phone` the trusted phone that this
    is, or None; `request.who` has the rest.
    """

    def middleware(request):
        who = request.who = Who(request, partial(auth.get_user, request))
        request.user = SimpleLazyObject(lambda: who.person)
        request.dyeing = SimpleLazyObject(lambda: who.dyeing)
        response = get_response(request)
        if COOKIE in request.COOKIES and response.headers.get("Content-Type", "").startswith("text/html"):
            # Several people hold this phone: "Back" must not show the next one what the one before was let see.
            add_never_cache_headers(response)
        return response

    return middleware


def touch(request, phone, person, *, now):
    """Open the phone's own session for this person, or go on in it under their name. Returns since when, in seconds.

    Not by `login`: nobody has said a password, so nobody is "last signed in", and wrong passwords stay counted.
    """
    if not request.who.by_touch:
        request.session.flush()  # a new key, and nothing left of who was signed in
        request.session[auth.SESSION_KEY] = str(phone.by_id)
        request.session[auth.BACKEND_SESSION_KEY] = BACKEND
        request.session[auth.HASH_SESSION_KEY] = phone.by.get_session_auth_hash()
        request.session[PHONE] = phone.pk
        rotate_token(request)
    lately = [person.pk, *request.session.get(LATELY, [])]
    request.session[LATELY] = list(dict.fromkeys(lately))[:LATELY_KEPT]
    request.session[BY], request.session[SINCE] = person.pk, now.timestamp()
    return now.timestamp()


def give_key(response, key):
    """The phone keeps its key: out of reach of scripts, and of other sites."""
    response.set_cookie(COOKIE, key, max_age=COOKIE_AGE, httponly=True, secure=settings.HTTPS, samesite="Lax")


def take_key(response):
    response.delete_cookie(COOKIE, samesite="Lax")


def trust(request, name):
    """This device is trusted from now on, by the owner who asks. (Phone, its key)"""
    if request.who.phone:
        stop(request, request.who.phone)
    phone, key = Phone.trust(name=name, by=request.user)
    log.info("phone %s trusted by person %s", phone.pk, request.user.pk)
    return phone, key


def stop(request, phone):
    """Trusted no longer. What is still open on it ends with its next request."""
    if Phone.objects.filter(pk=phone.pk).end():
        log.info("phone %s no longer trusted, said by person %s", phone.pk, request.user.pk)
