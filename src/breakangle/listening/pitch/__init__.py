"""The pitch of one take: partials, glide, hum, one joint fit, one stiff-string law."""
