#include "app/recent.h"

#include <QDir>
#include <QFileInfo>
#include <QSettings>
#include <algorithm>

namespace setwright::app {

namespace {

constexpr int most_recent = 10;
const QString files_key = QStringLiteral("recent");
const QString folder_key = QStringLiteral("folder");

}  // namespace

QStringList recent_files() {
    QStringList files = QSettings().value(files_key).toStringList();
    files.erase(
        std::remove_if(files.begin(), files.end(), [](const QString& file) { return !QFileInfo(file).isFile(); }),
        files.end());
    return files;
}

void remember_recent(const QString& path) {
    QSettings settings;
    QStringList files = settings.value(files_key).toStringList();
    const QString whole = QFileInfo(path).absoluteFilePath();
    files.removeAll(whole);
    files.prepend(whole);
    settings.setValue(files_key, files.mid(0, most_recent));
}

QString last_folder() {
    const QString folder = QSettings().value(folder_key).toString();
    return QFileInfo(folder).isDir() ? folder : QDir::homePath();
}

void remember_folder(const QString& file) {
    QSettings().setValue(folder_key, QFileInfo(file).absolutePath());
}

}  // namespace setwright::app
