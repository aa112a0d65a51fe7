"""Making at the desk: what a neck reset, a nut, a saddle, a refret or a bridge comes to on one instrument."""
