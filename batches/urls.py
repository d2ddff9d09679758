"""The journal's addresses."""

from django.urls import path

from batches.views import (
    ahead,
    colourways,
    costs,
    entries,
    finding,
    finishing,
    first_day,
    journal,
    judge,
    measures,
    photos,
    prices,
    run,
    shelf,
    sink,
    starting,
    tags,
    taking_out,
    ties,
    weighing,
)

app_name = "batches"

urlpatterns = [
    path("shelf/", shelf.shelf, name="shelf"),
    path("shelf/bench/measures/<int:pk>/used/", measures.used, name="measure-used"),
    path("journal/", journal.journal, name="journal"),
    path("find/", finding.find, name="find"),
    path("first-day/", first_day.first_day, name="first-day"),
    # beginning a run
    path("runs/new/", starting.new_run, name="new-run"),
    path("runs/new/bare/", starting.bare, name="bare-run"),
    path("runs/new/plan/<int:recipe_pk>/", starting.plan_run, name="plan"),
    # one run
    path("runs/<slug:code>/", run.run, name="run"),
    path("runs/<slug:code>/log/", run.whole_log, name="run-log"),
    path("runs/<slug:code>/start/", run.start, name="run-start"),
    path("runs/<slug:code>/name/", run.name, name="run-name"),
    path("runs/<slug:code>/yarn/", run.say_yarn, name="run-yarn"),
    path("runs/<slug:code>/give-up/", run.abandon, name="run-abandon"),
    path("runs/<slug:code>/cover/", photos.lead, name="run-cover"),
    path("runs/<slug:code>/photos/", photos.photos, name="photos"),
    path("runs/<slug:code>/photos/<uuid:key>/", photos.photo, name="photo"),
    path("runs/<slug:code>/photos/<uuid:key>/crop/", photos.crop, name="photo-crop"),
    path("runs/<slug:code>/compare/", photos.compare, name="compare"),
    path("runs/<slug:code>/judge/", judge.judge, name="judge"),
    path("runs/<slug:code>/finish/", finishing.finish, name="finish"),
    path("runs/<slug:code>/cost/", costs.cost, name="cost"),
    path("runs/<slug:code>/tags/", tags.tags, name="tags"),
    path("runs/<slug:code>/ties/", ties.ties, name="ties"),
    path("tags/<uuid:sheet>.pdf", tags.sheet, name="tag-sheet"),
    path("shelf/bench/pots/labels/", ties.pot_codes, name="pot-codes"),
    path("pot/<int:vessel_pk>/<int:number>/", ties.pot, name="pot"),
    path("prices/", prices.prices, name="prices"),
    path("colourways/", colourways.colourways, name="colourways"),
    path("colourways/<int:pk>/", colourways.colourway, name="colourway"),
    path("studio/export/", taking_out.take_out, name="export"),
    # at the sink, and at the scale
    path("sink/<int:pk>/", sink.sink, name="sink"),
    path("sink/<int:pk>/all/", sink.sink_all, name="sink-all"),
    path("sink/<int:pk>/log/", entries.take, name="intake"),
    path("sink/<int:pk>/add/<slug:name>/", entries.entry, name="entry"),
    path("sink/<int:pk>/strike/<uuid:entry_id>/", entries.strike, name="strike"),
    path("weigh-ahead/", ahead.weigh_ahead, name="weigh-ahead"),
    path("weigh-in/", weighing.weigh_in, name="weigh-in"),
    path("weigh-in/result/", weighing.result, name="weigh-in-result"),
]
