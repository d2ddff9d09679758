"""The addresses of the whole program: the studio's own, then those of each app that has some."""

from django.urls import include, path

from studio import doors
from studio.views import (
    account,
    bases,
    bench,
    deliveries,
    door,
    dyes,
    health,
    home,
    lots,
    media,
    offline,
    people,
    phones,
    studio,
)

own = [
    path("sign-in/", door.sign_in, name="sign-in"),
    path("sign-out/", door.sign_out, name="sign-out"),
    path("set-up/", door.set_up, name="set-up"),
    path("account/", account.account, name="account"),
    path("account/sign-out-everywhere/", account.sign_out_everywhere, name="account-sign-out"),
    path("people/", people.people, name="people"),
    path("people/new/", people.new, name="person-new"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/password/", people.password, name="person-password"),
    path("people/<int:pk>/sign-out-everywhere/", people.sign_out_everywhere, name="person-sign-out"),
    path("who/", phones.who, name="who"),
    path("phones/trust/", phones.trust, name="phone-trust"),
    path("phones/<int:pk>/stop/", phones.stop, name="phone-stop"),
    path("studio/", studio.settings_page, name="studio"),
    path("studio/first/", studio.first, name="first"),
    path("cautions/", studio.cautions, name="cautions"),
    path("pictures/<uuid:id>/<slug:size>.jpg", media.picture, name="picture"),
    path("sounds/<uuid:id>.m4a", media.sound, name="sound"),
    path("documents/<uuid:id>/", media.document, name="document"),
    path("sw.js", offline.worker, name="worker"),
    path("shell/", offline.shell, name="shell"),
    path("app.webmanifest", offline.manifest, name="manifest"),
    path("signed-in/", offline.signed_in, name="signed-in"),
    path("healthz", health.healthz, name="healthz"),
    path("readyz", health.readyz, name="readyz"),
]

# Everything on the shelf
shelf = [
    path("bases/new/", bases.new, name="base-new"),
    path("bases/<int:pk>/", bases.base, name="base"),
    path("bases/<int:pk>/change/", bases.edit, name="base-edit"),
    path("dyes/new/", dyes.dye_new, name="dye-new"),
    path("dyes/<int:pk>/", dyes.dye, name="dye"),
    path("dyes/<int:pk>/change/", dyes.dye_edit, name="dye-edit"),
    path("assistants/new/", dyes.assistant_new, name="assistant-new"),
    path("assistants/<int:pk>/", dyes.assistant, name="assistant"),
    path("assistants/<int:pk>/change/", dyes.assistant_edit, name="assistant-edit"),
    path("masters/new/", dyes.solution_new, name="solution-new"),
    path("masters/<int:pk>/", dyes.solution, name="solution"),
    path("masters/<int:pk>/change/", dyes.solution_edit, name="solution-edit"),
    path("bench/", bench.bench, name="bench"),
    path("bench/pots/new/", bench.vessel_new, name="vessel-new"),
    path("bench/pots/<int:pk>/", bench.vessel, name="vessel"),
    path("bench/tools/new/", bench.tool_new, name="tool-new"),
    path("bench/tools/<int:pk>/", bench.tool, name="tool"),
    path("bench/measures/new/", bench.measure_new, name="measure-new"),
    path("bench/measures/<int:pk>/", bench.measure, name="measure"),
    path("bench/measures/<int:pk>/change/", bench.measure_edit, name="measure-edit"),
    path("deliveries/new/", deliveries.new, name="delivery-new"),
    path("deliveries/<int:pk>/", deliveries.delivery, name="delivery"),
    path("here-already/", deliveries.opening, name="opening"),
    path("lots/<int:pk>/", lots.lot, name="lot"),
    path("lots/<int:pk>/count/", lots.count, name="lot-count"),
    path("lots/<int:pk>/put-right/", lots.correct, name="lot-correct"),
    path("lots/<int:pk>/throw-away/", lots.waste, name="lot-waste"),
    path("lots/<int:pk>/take-back/<int:movement_pk>/", lots.undo, name="lot-undo"),
    path("count/", lots.count_shelf, name="count"),
]

urlpatterns = [
    path("", include((own + [path("shelf/", include(shelf))], "studio"))),
    path("", home.home, name="home"),
    *(path("", include(module)) for module in doors.our_modules("urls") if module.__name__ != __name__),
]

handler400 = "studio.views.errors.bad_request"
