"""Values as people type them: amounts, sizes and days understood, or refused with what they could be."""
