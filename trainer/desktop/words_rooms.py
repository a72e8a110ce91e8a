"""The texts of own plans, of the tables beside the figures, of displays and of what is due."""

WORDS: dict[str, str] = {
    # own plans
    "plans.own": "Your own plan.",
    "plans.edit": "Change",
    "plan.change": "Change your plan",
    "plan.delete": "Delete",
    "plan.delete.title": "Delete “{title}”?",
    "plan.delete.note": "The plan leaves the list and its file goes. Sittings taken with it stay.",
    "plan.deleted": "“{title}” is deleted.",
}
