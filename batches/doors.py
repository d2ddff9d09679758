"""Who may open the journal's pages."""

from studio.doors import COSTS, EVERYONE, LOGGERS, MAKERS, NOBODY, OWNERS, RECIPES, Door

DOORS = {
    "batches:journal": Door(read=EVERYONE),
    "batches:find": Door(read=EVERYONE),
    "batches:timers": Door(read=LOGGERS),
    "batches:board": Door(read=EVERYONE),
    "batches:shelf": Door(read=EVERYONE),
    "batches:measure-used": Door(read=EVERYONE),
    # beginning a run
    "batches:new-run": Door(read=MAKERS),
    "batches:bare-run": Door(read=MAKERS, write=MAKERS),
    "batches:plan": Door(read=MAKERS, write=MAKERS),
    # one run
    "batches:run": Door(read=EVERYONE),
    "batches:run-log": Door(read=EVERYONE),
    "batches:run-start": Door(read=NOBODY, write=MAKERS),
    "batches:run-day": Door(read=MAKERS, write=MAKERS),
    "batches:run-name": Door(read=MAKERS, write=MAKERS),
    "batches:run-yarn": Door(read=MAKERS, write=MAKERS),
    "batches:run-abandon": Door(read=MAKERS, write=MAKERS),
    "batches:run-cover": Door(read=NOBODY, write=MAKERS),
    "batches:photos": Door(read=EVERYONE, write=LOGGERS),
    "batches:photo": Door(read=EVERYONE),
    "batches:photo-crop": Door(read=MAKERS, write=MAKERS),
    "batches:compare": Door(read=EVERYONE),
    "batches:from-paper": Door(read=LOGGERS, write=LOGGERS),
    "batches:judge": Door(read=LOGGERS, write=LOGGERS),
    "batches:finish": Door(read=MAKERS, write=MAKERS),
    "batches:cost": Door(read=COSTS, write=COSTS),
    "batches:tags": Door(read=MAKERS, write=MAKERS),
    "batches:tag-sheet": Door(read=MAKERS),
    "batches:ties": Door(read=LOGGERS),
    "batches:pot-codes": Door(read=LOGGERS),
    "batches:pot": Door(read=EVERYONE),  # it leads on: to the sink, or for a viewer to the record
    "batches:prices": Door(read=COSTS, write=COSTS),
    "batches:colourways": Door(read=RECIPES),
    "batches:colourway": Door(read=RECIPES),
    "batches:export": Door(read=OWNERS, write=OWNERS),
    # at the sink, and at the scale
    "batches:first-day": Door(read=LOGGERS),
    "batches:sink": Door(read=LOGGERS),
    "batches:sink-all": Door(read=LOGGERS),
    "batches:kit": Door(read=LOGGERS),
    "batches:entry": Door(read=LOGGERS),
    "batches:strike": Door(read=LOGGERS),
    "batches:intake": Door(read=NOBODY, write=LOGGERS),
    "batches:weigh-ahead": Door(read=LOGGERS, write=LOGGERS),
    "batches:write-up": Door(read=LOGGERS, write=LOGGERS),
    "batches:weigh-in": Door(read=LOGGERS, write=LOGGERS),
    "batches:weigh-in-result": Door(read=LOGGERS),
}
