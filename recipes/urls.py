"""The addresses of writing colourways and their versions."""

from django.urls import path

from recipes import views

app_name = "recipes"

urlpatterns = [
    path("colourways/new/", views.colourway_new, name="colourway-new"),
    path("colourways/<int:pk>/change/", views.colourway_edit, name="colourway-edit"),
    path("colourways/<int:pk>/write/", views.write, name="write"),
    path("recipes/<int:pk>/", views.recipe, name="recipe"),
    path("recipes/<int:pk>/change/", views.recipe_edit, name="recipe-edit"),
    path("recipes/<int:pk>/standard/", views.pin, name="pin"),
]
