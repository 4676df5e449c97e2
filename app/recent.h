#pragma once

#include <QStringList>

namespace setwright::app {

/// Jobs that were open before, the newest first, at most ten; those that are not there now are left out, but not
/// forgotten: a stick may come back.
QStringList recent_files();
void remember_recent(const QString& path);

/// Folder in which a file was last chosen.
QString last_folder();
void remember_folder(const QString& file);

}  // namespace setwright::app
