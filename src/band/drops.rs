use super::{Lead, Role};

impl Lead {
    /// The rhythm role that falls out while this lead is featured: the same hands play both.
    pub fn drops(self) -> Option<Role> {
        Role::ALL.into_iter().find(|role| role.row().lead == Some(self))
    }
}
