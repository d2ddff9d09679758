"""Which photo leads a run: the chosen one while it stands, else the newest dry one, and never a wet one by itself."""

from types import SimpleNamespace
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage

from batches.models import PhotoTaken, Run, Strike, Whereabouts
from studio import album
from studio.models import Picture
from tests import builders
from tests.builders import hours, stamp

Stage = PhotoTaken.Stage


@pytest.fixture
def at(cast, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    run = builders.run_with_pots(cast.maker)
    return SimpleNamespace(run=run, pots=list(run.batches.order_by("number")), by=cast.maker)


def take(at, stage, hour=0, picture=None, pot=0, **facts):
    shown = picture or builders.picture(at.by)
    return PhotoTaken.log(at.pots[pot], stamp(at.by, hours(hour), **facts), picture=shown, stage=stage).photo


def strike(at, photo):
    Strike.log(at.pots[0], stamp(at.by, hours(9)), target=photo.pk)


def leading(at):
    return Run.objects.get(pk=at.run.pk).cover_photo


@pytest.mark.parametrize("stage", [stage for stage in Stage if stage != Stage.DRY])
def test_only_a_dry_photo_leads_by_itself(at, stage):
    take(at, stage)
    assert leading(at) is None
    dry = take(at, "dry", 1)
    assert leading(at) == dry


def test_the_newest_dry_photo_leads_whenever_it_arrives(at):
    newer = take(at, "dry", 2)
    take(at, "dry", 1)
    assert leading(at) == newer
    newest = take(at, "dry", 3)
    assert leading(at) == newest


def test_where_the_leading_photo_is_struck_out_the_next_best_leads(at):
    older, newer = take(at, "dry", 1), take(at, "dry", 2)
    take(at, "wet", 3)
    strike(at, newer)
    assert leading(at) == older
    strike(at, older)
    assert leading(at) is None, "only a wet one is left"


def test_a_photo_struck_out_before_it_came_in_never_leads(at):
    early = uuid4()
    Strike.log(at.pots[0], stamp(at.by), target=early)
    take(at, "dry", 1, id=early)
    assert leading(at) is None


def test_a_photo_chosen_by_hand_stays_even_a_wet_one(at):
    wet = take(at, "wet")
    wet.lead()
    take(at, "dry", 1)
    assert leading(at) == wet and Run.objects.get(pk=at.run.pk).cover_chosen
    strike(at, wet)
    run = Run.objects.get(pk=at.run.pk)
    assert run.cover_photo.stage == "dry" and not run.cover_chosen


def test_a_chosen_picture_leads_while_it_stands_in_another_pot(at):
    shown = builders.picture(at.by)
    first, second = take(at, "wet", 0, shown), take(at, "wet", 0, shown, pot=1)
    first.lead()
    strike(at, first)
    assert leading(at) == second and Run.objects.get(pk=at.run.pk).cover == shown


def test_a_photo_that_was_struck_out_cannot_be_chosen(at):
    photo = take(at, "dry")
    strike(at, photo)
    with pytest.raises(ValueError, match="choose another"):
        photo.lead()


def test_a_crop_leads_and_the_whole_stays(at):
    photo = take(at, "dry")
    crop = builders.crop(at.by, photo.picture)
    photo.lead(crop=crop)
    run = Run.objects.get(pk=at.run.pk)
    assert (run.cover, run.cover_photo, run.cover_photo.picture) == (crop, photo, photo.picture)


def test_a_crop_of_another_photo_is_refused(at):
    photo = take(at, "dry")
    with pytest.raises(ValueError, match="another photo"):
        photo.lead(crop=builders.crop(at.by, builders.picture(at.by)))


def test_a_photo_that_leads_again_is_cropped_as_it_last_was(at):
    first, second = take(at, "dry", 0), take(at, "dry", 1)
    builders.crop(at.by, first.picture, received_at=hours(2))
    last = builders.crop(at.by, first.picture, received_at=hours(3))
    strike(at, second)
    assert Run.objects.get(pk=at.run.pk).cover == last


def test_a_kept_crop_has_its_own_files_and_says_where_it_lay(cast, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    whole = builders.picture(cast.maker)
    before = {size: default_storage.open(whole.path(size)).read() for size in Picture.SIZES}
    number = uuid4()
    crop = album.keep_crop(whole, 30, 60, 50, by=cast.helper, id=number)
    assert (crop.crop_of, crop.across_pct, crop.down_pct, crop.size_pct) == (whole, 30, 60, 50)
    assert (crop.width, crop.height) == (12, 15)  # of 40 by 30 px the largest 4:5 frame is 24 by 30
    assert all(default_storage.exists(crop.path(size)) for size in Picture.SIZES)
    assert before == {size: default_storage.open(whole.path(size)).read() for size in Picture.SIZES}
    assert album.keep_crop(whole, 90, 90, 90, by=cast.helper, id=number) == crop, "the same number is the same crop"
    assert album.keep_crop(crop, 50, 50, 100, by=cast.helper).crop_of == whole, "a crop is never cropped again"


@pytest.mark.parametrize(
    ("where", "stage"),
    [
        (Whereabouts.SHELF, "before"),
        (Whereabouts.SOAKING, "before"),
        (Whereabouts.IN_POT, "wet"),
        (Whereabouts.RINSING, "wet"),
        (Whereabouts.DRYING, "wet"),
        (Whereabouts.TO_CHECK, "dry"),
        (Whereabouts.STORED, "dry"),
    ],
)
def test_the_usual_stage_follows_where_the_yarn_is(where, stage):
    assert PhotoTaken.usual_stage(where) == stage
