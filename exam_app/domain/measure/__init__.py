"""Numbers with units: typed, counted, converted, summed."""
