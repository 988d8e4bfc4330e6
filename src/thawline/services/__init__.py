"""The use cases, as functions between the faces and the rooms below."""
