/// `a`, `a or b`, `a, b or c`: a list as a sentence has it.
pub fn list<S: AsRef<str>>(items: &[S], last: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [head @ .., tail] => {
            let head: Vec<&str> = head.iter().map(AsRef::as_ref).collect();
            format!("{} {last} {}", head.join(", "), tail.as_ref())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_read_as_sentences() {
        assert_eq!(list(&["a"], "or"), "a");
        assert_eq!(list(&["a", "b"], "or"), "a or b");
        assert_eq!(list(&["a", "b", "c"], "and"), "a, b and c");
        assert_eq!(list::<&str>(&[], "or"), "");
    }
}
