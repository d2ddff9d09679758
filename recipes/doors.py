"""Who may open the pages of recipes: makers write them, viewers read them, helpers work from a plan."""

from studio.doors import EVERYONE, LOGGERS, MAKERS, NOBODY, RECIPES, Door

DOORS = {
    "recipes:colourway-new": Door(read=MAKERS, write=MAKERS),
    "recipes:colourway-edit": Door(read=MAKERS, write=MAKERS),
    "recipes:write": Door(read=MAKERS, write=MAKERS),
    "recipes:recipe": Door(read=RECIPES),
    "recipes:difference": Door(read=RECIPES),
    "recipes:recipe-edit": Door(read=MAKERS, write=MAKERS),
    "recipes:pin": Door(read=NOBODY, write=MAKERS),
    "recipes:sums": Door(read=EVERYONE),
    "recipes:paste": Door(read=MAKERS, write=MAKERS),
    "recipes:paste-template": Door(read=MAKERS),
    "recipes:house": Door(read=MAKERS),
    "recipes:house-new": Door(read=MAKERS, write=MAKERS),
    "recipes:house-row": Door(read=MAKERS, write=MAKERS),
    "recipes:house-move": Door(read=NOBODY, write=MAKERS),
    "recipes:house-begin": Door(read=NOBODY, write=MAKERS),
    # making up bottles
    "recipes:bottle-new": Door(read=LOGGERS),
    "recipes:bottle-describe": Door(read=NOBODY, write=LOGGERS),
    "recipes:bottle-make": Door(read=LOGGERS, write=LOGGERS),
    "recipes:bottle-weaker": Door(read=LOGGERS, write=LOGGERS),
}
