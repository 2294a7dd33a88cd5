"""The ground: farms with their climate, the fields on them as they are today, and what lies beside them."""

from sites.models.farms import Farm, Observation, check_month_day, check_monthly_means, in_words
from sites.models.fields import Exclusion, Field, Landmark, check_geometry
from sites.models.uploads import MapUpload

__all__ = [
    "Exclusion",
    "Farm",
    "Field",
    "Landmark",
    "MapUpload",
    "Observation",
    "check_geometry",
    "check_month_day",
    "check_monthly_means",
    "in_words",
]
