"""Tables, column types, plain rows, the errors of this room, and the migrations of the schema."""
