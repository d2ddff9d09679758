"""The people of the studio, and the studio itself."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models, transaction
from django.db.models import CheckConstraint, Q, UniqueConstraint
from django.db.models.functions import Lower
from simple_history.models import HistoricalRecords

from .fields import ExactDecimalField, one_of, unknown_or_not_negative


class Role(models.TextChoices):
    """What a person may do, widest first."""

    OWNER = "owner", "Owner: everything, with people, settings and backups"
    MAKER = "maker", "Maker: dyes, keeps the shelf, writes recipes, prices and tags"
    HELPER = "helper", "Helper: works at the sink and weighs; sees no costs, prices or recipes"
    VIEWER = "viewer", "Viewer: reads the journal and the shelf, without costs"

    @property
    def about(self):
        """What somebody of this role may do, in full: the doors say the same."""
        return ROLES[self]


ROLES = {
    Role.OWNER: "All that a maker may; lets people in, keeps the settings and takes everything out.",
    Role.MAKER: "Keeps the shelf and what things cost, writes colourways and recipes, plans, finishes and prices runs, "
    "prints tags, and all that a helper may.",
    Role.HELPER: "Logs at the sink, judges, makes up bottles, counts and weighs. Sees no costs, prices or recipes.",
    Role.VIEWER: "Reads the journal, colourways with their recipes, and the shelf. Sees no costs, changes nothing.",
}


LOGGERS = (Role.OWNER, Role.MAKER, Role.HELPER)


class PersonManager(BaseUserManager):
    def who_dye(self):
        """Those who may sign in and log: the names a phone at the sink offers."""
        return self.filter(is_active=True, role__in=LOGGERS).order_by("name")

    def create_person(self, name, password, role):
        person = self.model(name=name.strip(), role=role)
        person.set_password(password)
        person.save()
        return person

    def get_by_natural_key(self, name):
        # People write "oda" for "Oda" on a phone that capitalises, or not, as it likes. SQLite folds only A to Z.
        for person in self.all():
            if person.name.casefold() == name.strip().casefold():
                return person
        raise self.model.DoesNotExist


class LastOwner(Exception):
    """Nobody would be left who can look after the studio."""

    def __init__(self):
        super().__init__(
            "This is the only owner who can sign in, and a studio needs one. Make somebody else an owner first."
        )


class Person(AbstractBaseUser):
    """Somebody who signs in; also the one who did what the record says."""

    name = models.CharField(max_length=60)
    role = models.CharField(max_length=8, choices=Role.choices, default=Role.HELPER)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(auto_now_add=True)
    sessions_since = models.PositiveIntegerField(default=0, help_text="Raised to end every session of this person.")
    welcomed_at = models.DateTimeField(
        null=True, blank=True, help_text="When a helper was shown the page of the first day."
    )

    # Somebody on a trusted phone who has not said a password. Never a column, so that no `save` keeps it.
    on_phone = False

    objects = PersonManager()
    history = HistoricalRecords(excluded_fields=["password", "last_login", "sessions_since", "welcomed_at"])

    USERNAME_FIELD = "name"
    REQUIRED_FIELDS = []

    class Meta:
        verbose_name_plural = "people"
        ordering = ["name"]
        constraints = [
            UniqueConstraint(
                Lower("name"),
                name="person_name_once",
                violation_error_message="Somebody here has this name already.",
            ),
            CheckConstraint(condition=Q(role__in=Role.values), name="person_role_known"),
        ]

    def __str__(self):
        return self.name

    def get_session_auth_hash(self):
        # The count is part of what a session is checked against, so raising it signs every device out.
        return f"{super().get_session_auth_hash()}{self.sessions_since}"

    def change(self, *, name, role, active):
        """Change the name, what this person may do and whether they may sign in. Raises LastOwner."""
        with transaction.atomic():
            owners = Person.objects.select_for_update().filter(role=Role.OWNER, is_active=True).order_by("pk")
            if [owner.pk for owner in owners] == [self.pk] and not (role == Role.OWNER and active):
                raise LastOwner
            self.name, self.role, self.is_active = name, role, active
            self.save(update_fields=["name", "role", "is_active"])
            if not (role == Role.OWNER and active):
                self.trusted_phones.end()
            if not active:
                # Or else their old sessions would come to life again when they are let in again.
                self.sign_out_everywhere()

    def set_new_password(self, password):
        """Give this person another password, which ends their sessions."""
        self.set_password(password)
        self.save(update_fields=["password"])

    def sign_out_everywhere(self):
        """End every session of this person, on every device."""
        self.sessions_since = models.F("sessions_since") + 1
        self.save(update_fields=["sessions_since"])
        self.refresh_from_db(fields=["sessions_since"])

    @property
    def role_here(self):
        """What they may do on this device: on a trusted phone, without a password, what a helper may."""
        return Role.HELPER if self.on_phone else Role(self.role)

    @property
    def sees_costs(self):
        return self.role_here in (Role.OWNER, Role.MAKER)

    @property
    def may_log(self):
        return self.role_here in LOGGERS

    @property
    def may_make(self):
        return self.role_here in (Role.OWNER, Role.MAKER)

    @property
    def is_owner(self):
        return self.role_here == Role.OWNER


class Market(models.TextChoices):
    EU = "EU", "European Union"
    UK = "UK", "United Kingdom"
    US = "US", "United States"


class System(models.TextChoices):
    METRIC = "metric", "Metric: g, mL, °C, m"
    US = "us", "United States: oz, fl oz, °F, yd"


class Spoons(models.TextChoices):
    METRIC = "metric", "Metric: teaspoon 5 mL, tablespoon 15 mL, cup 250 mL"
    US = "us", "United States: teaspoon 4.93 mL, tablespoon 14.79 mL, cup 236.6 mL"


class Paper(models.TextChoices):
    A4 = "A4", "A4"
    LETTER = "Letter", "Letter"


class Studio(models.Model):
    """The one row that says whose studio this is and how it counts."""

    name = models.CharField(max_length=80, default="Our studio")
    address = models.CharField(max_length=200, blank=True, default="", help_text="Printed on tags.")
    contact = models.CharField(
        max_length=120, blank=True, default="", help_text="E-mail or web address, printed on tags."
    )
    market = models.CharField(max_length=2, choices=Market.choices, default=Market.EU)
    currency = models.CharField(max_length=3, default="EUR")
    locale = models.CharField(max_length=12, default="en_GB")
    time_zone = models.CharField(max_length=64, default="UTC")
    system = models.CharField(max_length=6, choices=System.choices, default=System.METRIC)
    spoons = models.CharField(max_length=6, choices=Spoons.choices, default=Spoons.METRIC)
    paper = models.CharField(max_length=6, choices=Paper.choices, default=Paper.A4)
    hour_minor = models.BigIntegerField(null=True, blank=True, help_text="What an hour of work costs, in minor units.")
    overhead_minor = models.BigIntegerField(null=True, blank=True, help_text="Overhead a skein, in minor units.")
    second_pct = models.PositiveSmallIntegerField(
        default=60, help_text="What a second bears of a first's cost, in percent."
    )
    tax_pct = ExactDecimalField(default=0, help_text="Sales tax inside the price, in percent.")
    repeats_pct = ExactDecimalField(
        default=5, help_text="An amount that a tool repeats less surely than this is said, in percent."
    )
    run_year = models.PositiveSmallIntegerField(default=0)
    run_number = models.PositiveIntegerField(default=0)

    history = HistoricalRecords(excluded_fields=["run_year", "run_number"])

    class Meta:
        constraints = [
            one_of("market", Market.values, name="studio_market_known"),
            one_of("system", System.values, name="studio_system_known"),
            one_of("spoons", Spoons.values, name="studio_spoons_known"),
            one_of("paper", Paper.values, name="studio_paper_known"),
            CheckConstraint(condition=Q(pk=1), name="studio_one_row"),
            unknown_or_not_negative("hour_minor", name="studio_hour_not_negative"),
            unknown_or_not_negative("overhead_minor", name="studio_overhead_not_negative"),
            CheckConstraint(condition=Q(second_pct__lte=100), name="studio_second_pct_to_100"),
            CheckConstraint(condition=Q(tax_pct__gte=0, tax_pct__lt=100), name="studio_tax_pct_below_100"),
            CheckConstraint(condition=Q(repeats_pct__gt=0, repeats_pct__lte=50), name="studio_repeats_pct_sensible"),
        ]

    def __str__(self):
        return self.name

    @classmethod
    def get(cls):
        """The studio's row, made with the defaults when there is none yet."""
        return cls.objects.get_or_create(pk=1)[0]

    @property
    def is_said(self):
        """Whether somebody here has kept the settings, or they are still as the program made them. Costs a query."""
        return self.history.filter(history_type="~", history_user__isnull=False).exists()

    @classmethod
    def next_code(cls, year):
        """The next run's code, such as "26-119". Counts from 1 each year. Call inside a transaction.

        `year` is the year in which the code is given. It never goes back: a clock set to an older year would count from
        1 again, and a code that hangs on wet yarn must never be given twice. The row is locked, so two people who start
        at once get two codes.
        """
        with transaction.atomic():
            cls.get()
            studio = cls.objects.select_for_update(no_key=True).get(pk=1)
            if year > studio.run_year:
                studio.run_year, studio.run_number = year, 0
            studio.run_number += 1
            # Not by `save`, which would write the settings' history anew for every run.
            cls.objects.filter(pk=1).update(run_year=studio.run_year, run_number=studio.run_number)
        return f"{studio.run_year % 100:02d}-{studio.run_number:03d}"
