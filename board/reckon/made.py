"""Cheap constructors of what is reckoned of every part; each does what its class does."""

from __future__ import annotations

from board.reckon import forecast, left, series
from grammar.making import maker

Series = maker(series.Series)
Life = maker(series.Life)
Approach = maker(forecast.Approach)
Forecast = maker(forecast.Forecast)
Band = maker(left.Band)
Ahead = maker(left.Ahead)
