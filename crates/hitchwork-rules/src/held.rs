//! The variables that the functions of a rule hold.
//!
//! A `|…|` function that uses a variable from around it holds that variable, which may hold
//! another function, and so on: values as deep as memory is large. The engine drops such a
//! value by calls inside each other, which no stack is deep enough for. So the run keeps
//! every variable that is held until nothing else does: whatever is dropped then ends at
//! the next held variable, and the variables themselves are emptied one by one.
//!
//! `switch` goes through the whole of a value as well, to look it up among its cases. Where
//! a rule has a `switch`, the depth of what functions hold is looked at every few steps.
//! (Values are shown and compared by functions of our own, in `functions::texts` and
//! `functions::lists`.)

use std::collections::BTreeMap;
use std::mem::take;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock};

use rhai::{Dynamic, EvalContext, FnPtr};

/// How many functions may hold each other, one inside the other, before a `switch`. Calls
/// are not nested deeper either.
pub(crate) const MOST_INSIDE: usize = 48;

/// How deep lists and maps may be nested in a variable that a function holds, before a
/// `switch`.
pub(crate) const MOST_NESTED: usize = 64;

/// How often the depth is looked at, in steps. One step adds a nested list at most, which is
/// as deep as a list may have entries: between two looks, a stack holds what is added.
const STEPS_BETWEEN_LOOKS: u64 = 16;

/// Below this many held variables, none is looked for that only the run still keeps.
const FEW: usize = 64;

/// All variables that functions of one run hold.
#[derive(Debug, Default)]
pub(crate) struct Held {
    variables: Mutex<Variables>,
    /// Whether a rule of the run may have a `|…|` function.
    functions: AtomicBool,
    /// Whether a rule of the run may have a `switch`.
    switches: AtomicBool,
    steps: AtomicU64,
}

#[derive(Debug, Default)]
struct Variables {
    /// From the oldest to the newest, each with the number that is its tag.
    all: Vec<(i32, Arc<RwLock<Dynamic>>)>,
    /// Constants, by the address of their value, which the engine lets nobody change or tag.
    constants: BTreeMap<usize, (i32, Dynamic)>,
    /// How many have ever been held.
    count: i32,
    /// How many there may be before those are looked for that nothing else holds.
    most: usize,
}

/// What functions hold is too deep.
pub(crate) struct TooDeep;

impl Held {
    /// Says that the text of a rule takes part.
    pub(crate) fn takes_part(&self, text: &str) {
        self.functions
            .fetch_or(text.contains('|'), Ordering::Relaxed);
        self.switches
            .fetch_or(text.contains("switch"), Ordering::Relaxed);
    }

    /// Before a variable is used: keeps it, if a function has just come to hold it. The
    /// engine shares a variable at the moment when a function is made that uses it, and then
    /// reads it for that function. Its place is counted from the end of the scope, if it is
    /// known.
    pub(crate) fn keep(&self, name: &str, place: usize, context: &mut EvalContext) {
        if !self.functions.load(Ordering::Relaxed) {
            return;
        }
        let scope = context.scope();
        let variable = match place {
            0 => scope.get(name),
            // The newest come first.
            place => scope.iter_raw().nth(place - 1).map(|(_, _, value)| value),
        };
        let fresh = |value: &Dynamic| value.is_shared() && value.tag() == 0;
        if !variable.is_some_and(fresh) {
            return;
        }
        let mut variables = self.variables();
        if let Some(variable) = context.scope_mut().get_mut(name) {
            *variable = variables.take_over(variable.take());
        } else if let Some(constant) = context.scope().get(name) {
            variables.keep_constant(constant);
        }
    }

    /// Counts a step of the script, and looks at the depth where a `switch` may go into it.
    /// Gives the work that it took.
    pub(crate) fn step(&self) -> Result<usize, TooDeep> {
        if !self.switches.load(Ordering::Relaxed) {
            return Ok(0);
        }
        let steps = self.steps.fetch_add(1, Ordering::Relaxed);
        match steps.is_multiple_of(STEPS_BETWEEN_LOOKS) {
            true => self.variables().look(),
            false => Ok(0),
        }
    }

    fn variables(&self) -> MutexGuard<'_, Variables> {
        self.variables
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }
}

impl Variables {
    /// The same variable, in a place that is kept here as well.
    fn take_over(&mut self, variable: Dynamic) -> Dynamic {
        if self.all.len() >= self.most.max(FEW) {
            self.let_go();
            self.most = 2 * self.all.len();
        }
        // Nothing but the scope has it yet, so that nothing is copied.
        let place = Arc::new(RwLock::new(variable.flatten()));
        let number = self.next();
        self.all.push((number, Arc::clone(&place)));
        let mut shared: Dynamic = place.into();
        shared.set_tag(number);
        shared
    }

    fn keep_constant(&mut self, constant: &Dynamic) {
        if let Some(place) = address(constant)
            && !self.constants.contains_key(&place)
        {
            let number = self.next();
            self.constants.insert(place, (number, constant.clone()));
        }
    }

    fn next(&mut self) -> i32 {
        self.count = self.count.saturating_add(1);
        self.count
    }

    /// Lets those go that nothing else holds, the newest first, which may hold older ones.
    fn let_go(&mut self) {
        let mut kept = Vec::with_capacity(self.all.len());
        while let Some((number, place)) = self.all.pop() {
            if Arc::strong_count(&place) > 1 {
                kept.push((number, place));
            }
        }
        kept.reverse();
        self.all = kept;
    }

    /// Looks how deep functions hold each other.
    fn look(&self) -> Result<usize, TooDeep> {
        let mut work = 0;
        let mut held = BTreeMap::new();
        let mut note = |number: i32, value: &Dynamic| {
            let mut inside = Vec::new();
            work += self.gather(value, 0, &mut inside)?;
            held.insert(number, inside);
            Ok(())
        };
        for (number, place) in &self.all {
            // One that is being changed is looked at the next time.
            if let Ok(value) = place.try_read() {
                note(*number, &value)?;
            }
        }
        for (number, constant) in self.constants.values() {
            if let Some(value) = constant.read_lock::<Dynamic>() {
                note(*number, &value)?;
            }
        }
        let mut known = BTreeMap::new();
        for number in held.keys() {
            depth(*number, 0, &held, &mut known)?;
        }
        Ok(work)
    }

    /// The numbers of the variables that a value holds, by functions in it. Gives how many
    /// values were looked at.
    fn gather(
        &self,
        value: &Dynamic,
        nested: usize,
        inside: &mut Vec<i32>,
    ) -> Result<usize, TooDeep> {
        if nested > MOST_NESTED {
            return Err(TooDeep);
        }
        let mut work = 1;
        if let Ok(list) = value.as_array_ref() {
            for entry in list.iter() {
                work += self.gather(entry, nested + 1, inside)?;
            }
        } else if let Ok(map) = value.as_map_ref() {
            for entry in map.values() {
                work += self.gather(entry, nested + 1, inside)?;
            }
        } else if let Some(function) = value.read_lock::<FnPtr>() {
            inside.extend(function.iter_curry().filter_map(|held| self.number(held)));
        }
        Ok(work)
    }

    /// The number of a variable that a function holds.
    fn number(&self, variable: &Dynamic) -> Option<i32> {
        match variable.tag() {
            0 => Some(self.constants.get(&address(variable)?)?.0),
            number => Some(number),
        }
    }
}

/// How deep the functions that a variable holds go.
fn depth(
    number: i32,
    inside: usize,
    held: &BTreeMap<i32, Vec<i32>>,
    known: &mut BTreeMap<i32, usize>,
) -> Result<usize, TooDeep> {
    if let Some(depth) = known.get(&number) {
        return Ok(*depth);
    }
    if inside > MOST_INSIDE {
        return Err(TooDeep);
    }
    let mut deepest = 0;
    for next in held.get(&number).into_iter().flatten() {
        deepest = deepest.max(1 + depth(*next, inside + 1, held, known)?);
    }
    if deepest > MOST_INSIDE {
        return Err(TooDeep);
    }
    known.insert(number, deepest);
    Ok(deepest)
}

/// Where the value of a shared constant lies.
fn address(constant: &Dynamic) -> Option<usize> {
    let value = constant.read_lock::<Dynamic>()?;
    Some(std::ptr::from_ref::<Dynamic>(&value).addr())
}

/// At the end of a run every variable is emptied by itself, those that hold each other in a
/// circle, too.
impl Drop for Variables {
    fn drop(&mut self) {
        for (_, place) in &self.all {
            if let Ok(mut value) = place.try_write() {
                let value = take(&mut *value);
                drop(value);
            }
        }
        for (_, constant) in self.constants.values_mut() {
            let value = constant
                .write_lock::<Dynamic>()
                .map(|mut value| take(&mut *value));
            drop(value);
        }
    }
}
