"""The rest of a day planned again from a moment: what stands goes on, what is free is planned anew."""
