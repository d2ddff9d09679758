"""The people of the studio, for its owner."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.forms.people import AnothersPasswordForm, NewPersonForm, PersonForm
from studio.models import LastOwner, Person, Phone, Role
from studio.once import only_once


@require_safe
def people(request):
    everyone = Person.objects.order_by("-is_active", "name")
    context = {"people": everyone, "roles": Role, "phones": Phone.objects.trusted(), "here": "studio"}
    return render(request, "studio/people.html", context)


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def new(request):
    if request.method != "POST":
        return render(request, "studio/person_new.html", {"form": NewPersonForm(), "here": "studio"})
    form = NewPersonForm(request.POST)
    if not form.is_valid():
        return render(request, "studio/person_new.html", {"form": form, "here": "studio"}, status=422)

    def add():
        typed = form.cleaned_data
        Person.objects.create_person(typed["name"], typed["password"], typed["role"])
        messages.success(request, f"{typed['name']} can sign in now. Tell them their password.")
        return reverse("studio:people")

    return only_once(request, form.cleaned_data["once"], add)


@require_http_methods(["GET", "HEAD", "POST"])
def person(request, pk):
    who = get_object_or_404(Person, pk=pk)
    if request.method != "POST":
        return render(request, "studio/person.html", {"who": who, "form": PersonForm(person=who), "here": "studio"})
    form = PersonForm(request.POST, person=who)
    if form.is_valid():
        typed = form.cleaned_data
        try:
            who.change(name=typed["name"], role=typed["role"], active=typed["is_active"])
        except LastOwner as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"The changes for {who.name} are kept.")
            return redirect("home" if who == request.user and not who.is_owner else "studio:people")
    return render(request, "studio/person.html", {"who": who, "form": form, "here": "studio"}, status=422)


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def password(request, pk):
    who = get_object_or_404(Person, pk=pk)
    if who == request.user:  # one's own takes the present one
        return redirect("studio:account")
    form = AnothersPasswordForm(request.POST if request.method == "POST" else None, person=who)
    if request.method == "POST" and form.is_valid():
        who.set_new_password(form.cleaned_data["password"])
        messages.success(request, f"{who.name} has a new password, and is signed out everywhere.")
        return redirect("studio:person", pk=who.pk)
    status = 422 if form.is_bound else 200
    return render(request, "studio/person_password.html", {"who": who, "form": form, "here": "studio"}, status=status)


@require_POST
def sign_out_everywhere(request, pk):
    who = get_object_or_404(Person, pk=pk)
    who.sign_out_everywhere()
    messages.success(request, f"{who.name} is signed out on every device.")
    return redirect("studio:person", pk=who.pk)
