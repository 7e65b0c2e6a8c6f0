//! Commands that edit the text: which they are, the edit that each makes, what the scene's rules say to one before it is made; and the text
//! that a new room begins with.

use roomwright::scene::{self, EditError, Edited, Editor};

use crate::command::{Command, NewRoom};
use crate::document::Document;
use crate::reason::reason;

/// Whether a command would change or save the text, or leave the question of the recovery copy open.
pub(crate) fn touches_text(command: &Command) -> bool {
    is_edit(command)
        || matches!(
            command,
            Command::Save
                | Command::SaveAs(_)
                | Command::AskWhere
                | Command::Overwrite
                | Command::Stay
                | Command::SetText(_)
                | Command::Undo
                | Command::Redo
                | Command::CancelDrag
                | Command::ToggleLayout
                | Command::TakePlan
                | Command::TakeCloud(_)
                | Command::TakePlace(_)
        )
}

/// Whether a command is one edit of the text by an [`Editor`].
pub(crate) fn is_edit(command: &Command) -> bool {
    matches!(
        command,
        Command::AddPanel(_)
            | Command::RemovePanel(_)
            | Command::MovePanel { .. }
            | Command::MoveSource { .. }
            | Command::MoveReceiver { .. }
            | Command::SetMaterial { .. }
            | Command::SetWallMaterial(_)
            | Command::AddStock(_)
            | Command::SetStockCount { .. }
            | Command::SetActivity(_)
            | Command::SetGoals(_)
            | Command::AddOpening(_)
            | Command::ChangeOpening { .. }
            | Command::MoveOpening { .. }
            | Command::AddBlock(_)
            | Command::ChangeBlock { .. }
            | Command::MoveBlock { .. }
            | Command::AddClearance(_)
            | Command::ChangeClearance { .. }
            | Command::MoveClearance { .. }
            | Command::RemoveThing(..)
            | Command::SetCeiling { .. }
            | Command::ChangeCeiling { .. }
    )
}

/// Makes the edit that a command asks for.
pub(crate) fn change(editor: &mut Editor, command: &Command) -> Result<(), EditError> {
    match command {
        Command::AddPanel(panel) => editor.add_panel(panel),
        Command::RemovePanel(panel) => editor.remove_panel(*panel)?,
        Command::MovePanel { panel, place } => editor.move_panel(*panel, place)?,
        Command::MoveSource { name, position } => editor.move_source(name, *position)?,
        Command::MoveReceiver { name, position } => editor.move_receiver(name, *position)?,
        Command::SetMaterial { surface, material } => editor.set_material(surface, material)?,
        Command::SetWallMaterial(material) => editor.set_wall_material(material)?,
        Command::AddStock(kind) => editor.add_stock(kind),
        Command::SetStockCount { kind, count } => editor.set_stock_count(kind, *count)?,
        Command::SetActivity(activity) => editor.set_activity(*activity),
        Command::SetGoals(goals) => editor.set_goals(goals)?,
        Command::AddOpening(opening) => editor.add_opening(opening),
        Command::AddBlock(block) => editor.add_block(block),
        Command::MoveBlock { name, center } => editor.move_block(name, *center)?,
        Command::MoveOpening { name, low } => editor.move_opening(name, *low)?,
        Command::MoveClearance { name, region } => editor.move_clearance(name, region)?,
        Command::AddClearance(clearance) => editor.add_clearance(clearance),
        Command::ChangeOpening { name, opening } => editor.change_opening(name, opening)?,
        Command::ChangeBlock { name, block } => editor.change_block(name, block)?,
        Command::ChangeClearance { name, clearance } => editor.change_clearance(name, clearance)?,
        Command::RemoveThing(kind, name) => editor.remove_thing(*kind, name)?,
        Command::SetCeiling { away, add } => editor.set_ceiling(away, add)?,
        Command::ChangeCeiling { name, plane } => editor.change_ceiling(name, plane)?,
        _ => debug_assert!(false, "{command:?} is no edit"),
    }
    Ok(())
}

/// What an edit would make of the text.
pub(crate) fn tried(document: &Document, command: &Command) -> Result<Edited, EditError> {
    document.edited(|editor| change(editor, command))
}

/// Why an edit would be refused, in one sentence; nothing is changed.
pub(crate) fn objection(document: &Document, command: &Command) -> Option<String> {
    tried(document, command).err().map(|error| reason(&error))
}

/// The text of a new room, or what is wrong with what was asked.
pub(crate) fn new_room(room: &NewRoom) -> Result<String, String> {
    let text = scene::starter_for(&room.name, &room.size, room.activity);
    let mut editor = Editor::new(&text).map_err(|refused| refused.to_string())?;
    let [walls, floor, ceiling] = &room.materials;
    let set = |editor: &mut Editor| -> Result<(), EditError> {
        walls.iter().try_for_each(|material| editor.set_wall_material(material))?;
        floor.iter().try_for_each(|material| editor.set_material("floor", material))?;
        ceiling.iter().try_for_each(|material| editor.set_material("ceiling", material))
    };
    set(&mut editor).map_err(|error| reason(&error))?;
    editor.finish().map(|edited| edited.text).map_err(|refused| reason(&refused.into()))
}
