"""How long until milk is cold, frozen, thawed or warm; how long a cooler or a closed box holds."""
