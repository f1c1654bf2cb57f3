"""Pictures of the state: screens, sheets, charts and complaints, as text."""
