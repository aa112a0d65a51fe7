"""What the fields of forms are called, taken out of them here: services get typed values and no field names."""
