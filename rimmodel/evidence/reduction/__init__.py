"""From a recording to speed points: holds, ramps, sensors, planes and shapes."""
