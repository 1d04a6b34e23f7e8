//! What one module of Rust says: the modules it declares, the names it defines and those it uses.

use std::str::FromStr;

use proc_macro2::{Delimiter, Group, TokenStream, TokenTree};

/// A module as it is written.
#[derive(Debug, Default)]
pub struct ModuleText {
    /// Parts under `#[cfg(test)]` are not left out.
    has_tests: bool,
    pub children: Vec<Child>,
    /// Names that are defined here, and stand for themselves.
    pub names: Vec<String>,
    /// Types, traits and aliases with their lines, also those inside functions.
    pub types: Vec<(String, usize)>,
    pub imports: Vec<Import>,
    /// Paths of two names or more outside `use`, with their lines.
    pub paths: Vec<(Vec<String>, usize)>,
    /// Names that stand alone, with their lines.
    pub lone: Vec<(String, usize)>,
    /// Lines with `extern crate`.
    pub extern_crates: Vec<usize>,
    /// Macros that stand in the crate's root, wherever they are written.
    pub root_macros: Vec<String>,
}

/// A module that another declares.
#[derive(Debug)]
pub struct Child {
    pub name: String,
    /// What `#[path]` says.
    pub path: Option<String>,
    /// Its text, if it stands in braces; else it has a file of its own.
    pub inline: Option<ModuleText>,
}

/// One name that `use` brings, or with `*` all of them.
#[derive(Debug)]
pub struct Import {
    pub path: Vec<String>,
    /// What it is called here; `None` for `*`.
    pub name: Option<String>,
    pub is_public: bool,
    pub line: usize,
}

/// Where the words stand: among items, among those of a trait or an `impl`, or inside a body.
#[derive(Clone, Copy, PartialEq)]
enum Level {
    Items,
    Associated,
    Body,
}

impl ModuleText {
    /// Reads a file without its tests. A sentence if it is no Rust, `None` if all of it is a test.
    pub fn read(text: &str) -> Result<Option<ModuleText>, String> {
        let tokens = tokens(text)?;
        let is_test = tokens.windows(3).any(|three| match three {
            [hash, bang, TokenTree::Group(group)] => {
                is_punct(Some(hash), '#') && is_punct(Some(bang), '!') && is_test(group)
            }
            _ => false,
        });
        let mut module = ModuleText::default();
        module.scan(&tokens, Level::Items);
        Ok((!is_test).then_some(module))
    }

    /// Reads a file with its tests. A sentence if it is no Rust.
    pub fn read_with_tests(text: &str) -> Result<ModuleText, String> {
        let mut module = ModuleText { has_tests: true, ..ModuleText::default() };
        module.scan(&tokens(text)?, Level::Items);
        Ok(module)
    }

    fn scan(&mut self, tokens: &[TokenTree], level: Level) {
        let mut place = 0;
        // The word that began the present item, which says what its braces hold.
        let mut head = "";
        let mut path_attribute = None;
        while let Some(token) = tokens.get(place) {
            place += 1;
            match token {
                TokenTree::Punct(punct) if punct.as_char() == '#' => {
                    let at = place + usize::from(is_punct(tokens.get(place), '!'));
                    let Some(TokenTree::Group(group)) = tokens.get(at) else { continue };
                    place = at + 1;
                    if is_test(group) && !self.has_tests {
                        place = after_item(tokens, place);
                    } else {
                        path_attribute = path_of(group).or(path_attribute);
                        self.scan(&words(group), Level::Body);
                    }
                }
                TokenTree::Punct(punct) => match punct.as_char() {
                    // A lifetime's name is no name.
                    '\'' => place += 1,
                    ';' => head = "",
                    _ => {}
                },
                TokenTree::Group(group) => {
                    let is_braced = group.delimiter() == Delimiter::Brace;
                    let inside = match head {
                        "impl" | "trait" if is_braced => Level::Associated,
                        "extern" if is_braced => level,
                        _ => Level::Body,
                    };
                    self.scan(&words(group), inside);
                    head = if is_braced { "" } else { head };
                }
                TokenTree::Ident(ident) => {
                    let word = ident.to_string();
                    let line = ident.span().start().line;
                    match word.as_str() {
                        "use" if !is_punct(tokens.get(place), '<') => {
                            let end = (place..tokens.len())
                                .find(|at| is_punct(tokens.get(*at), ';'))
                                .unwrap_or(tokens.len());
                            let is_public = is_published(&tokens[..place - 1]);
                            self.import(&tokens[place..end], &[], is_public);
                            place = end;
                        }
                        "crate" if is_ident(before_word(tokens, place), "extern") => {
                            self.extern_crates.push(line);
                        }
                        "mod" => {
                            place = self.declare(tokens, place, path_attribute.take());
                        }
                        _ => {
                            head = self.define(tokens, place, level, head, &word);
                            place = self.mention(tokens, place, word, line);
                        }
                    }
                }
                TokenTree::Literal(_) => {}
            }
        }
    }

    /// A `mod`; the place after it comes back.
    fn declare(&mut self, tokens: &[TokenTree], place: usize, path: Option<String>) -> usize {
        let Some(TokenTree::Ident(name)) = tokens.get(place) else { return place };
        let mut child = Child { name: name.to_string(), path, inline: None };
        if let Some(TokenTree::Group(group)) = tokens.get(place + 1) {
            let mut inline = ModuleText { has_tests: self.has_tests, ..ModuleText::default() };
            inline.scan(&words(group), Level::Items);
            self.root_macros.append(&mut inline.root_macros);
            child.inline = Some(inline);
        }
        self.children.push(child);
        place + 2
    }

    /// Notes what `word`, which stands before `place`, defines; the item's first word comes back.
    fn define<'a>(
        &mut self,
        tokens: &[TokenTree],
        place: usize,
        level: Level,
        head: &'a str,
        word: &str,
    ) -> &'a str {
        const HEADS: [&str; 11] = [
            "fn",
            "impl",
            "trait",
            "struct",
            "enum",
            "union",
            "type",
            "const",
            "static",
            "extern",
            "macro_rules",
        ];
        let Some(own) = HEADS.into_iter().find(|own| *own == word) else { return head };
        let skipped = match own {
            "macro_rules" => 1,
            "static" if is_ident(tokens.get(place), "mut") => 1,
            _ => 0,
        };
        if let Some(TokenTree::Ident(name)) = tokens.get(place + skipped) {
            let (name, line) = (name.to_string(), name.span().start().line);
            let is_type = matches!(own, "struct" | "enum" | "union" | "trait" | "type");
            if is_type && level != Level::Associated {
                self.types.push((name.clone(), line));
            }
            if level == Level::Items && !matches!(own, "impl" | "extern") {
                self.names.push(name.clone());
            }
            if own == "macro_rules" {
                self.root_macros.push(name);
            }
        }
        // `const fn` and `extern "C" fn` are functions, and `-> impl Iterator` begins no `impl`.
        if head.is_empty() || matches!(head, "const" | "extern") { own } else { head }
    }

    /// Notes the path or the lone name that begins with `word`; the place after it comes back.
    fn mention(&mut self, tokens: &[TokenTree], place: usize, word: String, line: usize) -> usize {
        // After `value.` or `<Type>::` a name is that of something we cannot see; after `..` it is not.
        let before = |count: usize| place.checked_sub(count).and_then(|at| tokens.get(at));
        let is_field = is_punct(before(2), '.') && !is_punct(before(3), '.');
        let goes_on = is_field || is_punct(before(2), ':') && is_punct(before(3), ':');
        let mut path = vec![word];
        let mut next = place;
        while is_punct(tokens.get(next), ':')
            && is_punct(tokens.get(next + 1), ':')
            && let Some(TokenTree::Ident(name)) = tokens.get(next + 2)
        {
            path.push(name.to_string());
            next += 3;
        }
        if goes_on {
            return next;
        }
        if path.len() > 1 {
            self.paths.push((path, line));
        } else {
            self.lone.extend(path.pop().map(|word| (word, line)));
        }
        next
    }

    /// The branches of one `use`, each with its whole path.
    fn import(&mut self, tokens: &[TokenTree], before: &[String], is_public: bool) {
        let mut path = before.to_vec();
        let mut alias = None;
        let mut line = 0;
        let mut is_done = false;
        let mut place = 0;
        while let Some(token) = tokens.get(place) {
            place += 1;
            match token {
                TokenTree::Ident(word) if *word == "as" => {
                    alias = tokens.get(place).map(ToString::to_string);
                    place += 1;
                }
                TokenTree::Ident(word) => {
                    path.push(word.to_string());
                    line = word.span().start().line;
                }
                TokenTree::Group(group) => {
                    for branch in words(group).split(|token| is_punct(Some(token), ',')) {
                        self.import(branch, &path, is_public);
                    }
                    is_done = true;
                }
                TokenTree::Punct(punct) if punct.as_char() == '*' => {
                    line = punct.span().start().line;
                    self.imports.push(Import { path: path.clone(), name: None, is_public, line });
                    is_done = true;
                }
                _ => {}
            }
        }
        if path.last().is_some_and(|last| last == "self") && path.len() > 1 {
            path.pop();
        }
        if !is_done && line > 0 {
            let name = alias.or_else(|| path.last().cloned());
            self.imports.push(Import { path, name, is_public, line });
        }
    }
}

fn tokens(text: &str) -> Result<Vec<TokenTree>, String> {
    let tokens = TokenStream::from_str(text).map_err(|error| format!("no Rust: {error}"))?;
    Ok(tokens.into_iter().collect())
}

fn words(group: &Group) -> Vec<TokenTree> {
    group.stream().into_iter().collect()
}

fn is_punct(token: Option<&TokenTree>, character: char) -> bool {
    matches!(token, Some(TokenTree::Punct(punct)) if punct.as_char() == character)
}

fn is_ident(token: Option<&TokenTree>, word: &str) -> bool {
    matches!(token, Some(TokenTree::Ident(ident)) if *ident == word)
}

/// The token before the word that stands before `place`.
fn before_word(tokens: &[TokenTree], place: usize) -> Option<&TokenTree> {
    place.checked_sub(2).and_then(|at| tokens.get(at))
}

/// `use` is published by what stands before it.
fn is_published(before: &[TokenTree]) -> bool {
    match before {
        [.., word, TokenTree::Group(_)] => is_ident(Some(word), "pub"),
        [.., word] => is_ident(Some(word), "pub"),
        [] => false,
    }
}

/// An attribute's words say `cfg(test)`, alone or with more.
fn is_test(attribute: &Group) -> bool {
    let said = attribute.stream().to_string();
    let words: Vec<&str> = said.split(|c: char| !c.is_alphanumeric() && c != '_').collect();
    words.first() == Some(&"cfg") && words.contains(&"test") && !words.contains(&"not")
}

/// The path of `#[path = "…"]`.
fn path_of(attribute: &Group) -> Option<String> {
    match &words(attribute)[..] {
        [TokenTree::Ident(word), _, TokenTree::Literal(path)] if *word == "path" => {
            Some(path.to_string().trim_matches('"').to_owned())
        }
        _ => None,
    }
}

/// The place after the item, field, arm or statement that begins at `place`.
fn after_item(tokens: &[TokenTree], place: usize) -> usize {
    const TO_SEMICOLON: [&str; 5] = ["use", "const", "static", "type", "let"];
    const TO_BRACE: [&str; 8] =
        ["fn", "mod", "impl", "struct", "enum", "trait", "union", "macro_rules"];
    let word = |at: usize| match tokens.get(at) {
        Some(TokenTree::Ident(word)) => word.to_string(),
        _ => String::new(),
    };
    let kinds = TO_SEMICOLON.iter().chain(&TO_BRACE);
    let first = (place..tokens.len().min(place + 8)).map(word);
    let kind = first.into_iter().find(|word| kinds.clone().any(|kind| kind == word));
    let is_function = (place..tokens.len().min(place + 8)).any(|at| word(at) == "fn");
    let ends_at_semicolon =
        !is_function && kind.as_deref().is_some_and(|kind| TO_SEMICOLON.contains(&kind));
    for (at, token) in tokens.iter().enumerate().skip(place) {
        let ends = match token {
            TokenTree::Punct(punct) => {
                punct.as_char() == ';' || punct.as_char() == ',' && kind.is_none()
            }
            TokenTree::Group(group) => group.delimiter() == Delimiter::Brace && !ends_at_semicolon,
            _ => false,
        };
        if ends {
            return at + 1;
        }
    }
    tokens.len()
}
