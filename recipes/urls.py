"""The addresses of writing colourways and their versions, and of making up bottles."""

from django.urls import path

from recipes import bottle_views, house_views, paste_views, sum_views, views

app_name = "recipes"

urlpatterns = [
    path("colourways/new/", views.colourway_new, name="colourway-new"),
    path("colourways/<int:pk>/change/", views.colourway_edit, name="colourway-edit"),
    path("colourways/<int:pk>/write/", views.write, name="write"),
    path("recipes/<int:pk>/", views.recipe, name="recipe"),
    path("recipes/<int:pk>/change/", views.recipe_edit, name="recipe-edit"),
    path("recipes/<int:pk>/against/<int:other>/", views.difference, name="difference"),
    path("recipes/<int:pk>/standard/", views.pin, name="pin"),
    path("sums/", sum_views.sums, name="sums"),
    path("shelf/paste/", paste_views.paste, name="paste"),
    path("shelf/paste/<slug:slug>/", paste_views.paste, name="paste"),
    path("shelf/paste/<slug:slug>/list.csv", paste_views.template, name="paste-template"),
    # what the studio usually does and says
    path("studio/house/", house_views.house_page, name="house"),
    path("studio/house/<slug:slug>/new/", house_views.row_new, name="house-new"),
    path("studio/house/<slug:slug>/begin/", house_views.begin, name="house-begin"),
    path("studio/house/<slug:slug>/<int:pk>/", house_views.row, name="house-row"),
    path("studio/house/<slug:slug>/<int:pk>/move/", house_views.row_move, name="house-move"),
    # making up bottles
    path("shelf/bottles/new/", bottle_views.choose, name="bottle-new"),
    path("shelf/bottles/describe/", bottle_views.describe, name="bottle-describe"),
    path("shelf/masters/<int:pk>/make/", bottle_views.make, name="bottle-make"),
    path("shelf/lots/<int:pk>/weaker/", bottle_views.weaker, name="bottle-weaker"),
]
