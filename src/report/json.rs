//! The answers for machines.

use crate::analysis::Answers;

/// The answers as indented JSON with a final line feed. Field `format` says
/// which version of the structure it is; never is the string "never", a figure
/// that does not exist is null.
///
/// # Errors
/// None is known: all that the answers hold can be written (a NaN or an
/// infinity outside a figure is written as null).
pub fn answers(answers: &Answers) -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(answers)?;
    text.push('\n');
    Ok(text)
}

#[cfg(test)]
mod tests {
    use crate::chart::fixture;

    #[test]
    fn reads_back_with_never_as_a_word() {
        let text = super::answers(&fixture::answers()).unwrap();
        let json: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert_eq!(json["format"], 2);
        assert_eq!(json["results"][0]["base"], 9.0);
        let payback = &json["results"][1];
        assert_eq!(payback["kind"], "years");
        let p90 = payback["percentiles"].as_array().unwrap().iter().find(|q| q["p"] == 0.9).unwrap();
        assert_eq!(p90["estimate"]["value"], "never");
        assert_eq!(json["break_even"][0]["for_chance"][2]["lever"], "never");
    }
}
